"""A generator: its build sheet, pressure model, predictions, what-if answers and drawing."""
