"""The demo practice: invented people in an invented town, built through the program's own use cases."""
