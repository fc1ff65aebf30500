"""What is kept: the database and the image files beside it, in one data folder."""
