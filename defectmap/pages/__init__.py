"""The pages: one file each, in the order of the work; what they need besides drawing is in `behind`.

`defectmap app` starts them (`cli`), `main` is what the server runs, every other module here is one page.
"""
