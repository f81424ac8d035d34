"""The demo programme: an invented school year, its music and its machine-played takes.

Nothing here describes a real person. ``player`` plays written notes with faults
given as data and knows the exact truth of what it played.
"""
