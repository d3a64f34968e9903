"""A film, or several photographs with the lamp moved: frames laid on each other, one map of all marks."""
