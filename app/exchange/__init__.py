"""Files that other programs read and write: series, templates, audits, and the project's own shared data."""
