"""From the bytes of a file to linear light, upright, with what the file says of itself; or a refusal."""
