"""Open data: one definition of each record, answered as JSON and written as tables to publish."""
