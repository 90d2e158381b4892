"""Every read, already limited to what the person asking may see."""
