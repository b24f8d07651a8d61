"""The club's square marks: which are its own, found in a picture, printed on sheets.

``decode`` makes greys of a picture's bytes, ``find`` finds marks in greys, ``edges`` makes their corners fine, ``numbers``
knows whose mark a number is.
"""
