"""The least a Django server can do: insert one row and read it back. What others are held to."""
