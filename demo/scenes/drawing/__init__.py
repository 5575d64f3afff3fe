"""What the scenes are drawn with."""
