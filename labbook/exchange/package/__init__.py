"""What a group takes away: a package of files, made from a hand-in's record alone."""
