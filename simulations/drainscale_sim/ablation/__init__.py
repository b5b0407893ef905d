"""What each part of the measuring core is worth: switch it off, score again."""
