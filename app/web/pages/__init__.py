"""The pages, one module a task. Every module here that has a ``router`` is part of the application."""
