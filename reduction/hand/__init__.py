"""A student's own figures of one run: what each must follow from, and the first that does not."""
