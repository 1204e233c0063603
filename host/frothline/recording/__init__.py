"""Recordings: the bytes as they arrived, written before they are decoded, and the files that belong to them.

Nothing here needs sensor code: ``frothline.readings`` turns a recording into SI values.
"""
