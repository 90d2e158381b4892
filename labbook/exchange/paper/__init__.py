"""What is printed: sheets of paper, readings in columns, labels, and PDF of all of it."""
