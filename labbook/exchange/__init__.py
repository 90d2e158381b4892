"""What leaves the record in other people's formats."""
