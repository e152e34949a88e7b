"""The training room of the ears: from sounds to weights. Nothing of it is imported at run time."""
