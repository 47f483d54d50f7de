"""The whole database as one file, and back: the same data give the same bytes on either engine.

A backup is gzip around lines of JSON, UTF-8, one value a line: the heading (`heading.py`), every row of every table in
order of its key as a list of cells (`cells.py`), and last the SHA-256 of all lines before it.
"""
