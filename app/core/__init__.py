"""The rules of the trade as pure functions: no input or output, no framework, no clock."""
