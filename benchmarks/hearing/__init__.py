"""Made takes whose truth is known, the judge of what was heard in them, and a baseline.

Nothing here is shared with ``standlight.sound``: lines come from real scores, a seeded player
decides what sounds when, sampled or additive tones are sounded one by one (so that each onset
and each pitch is measured on the dry note alone), and a room, noise and a phone follow.
``benchmarks/listening.py`` is the command. Seeds 1000 to 1999 are for development; the table
of a method is printed with a seed that no development has seen.
"""
