"""How to photograph paint so that it can be measured: the words, and the sheet that prints them.

`text` holds every sentence once; the printed sheet, the pages and the README take theirs from it.
"""
