"""Recordings: writing and reading of the received bytes, with their metadata files.

Bytes are written before they are decoded. Nothing here needs sensor code: ``frothline.readings`` turns a recording into
SI values.
"""
