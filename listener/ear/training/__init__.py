"""The training room of the neural ear: from sounds to weights. Nothing of it is imported at run time."""
