"""What if: what an option may come to, what would change the answer, what to find out next, how far numbers may move.

Everything here weighs again, by the one way there is, with something supposed or changed. Nothing else says what a
verdict would be.
"""
