"""What the people of the demo write, kind by kind: tables of lines and how they are dealt.

All invented, in the manner of eleven to eighteen year olds with other things to do, and of
directors in a hurry. No real child wrote any of it, and no person in it exists; only composers of
the demo's real pieces are named, with facts of any encyclopedia.
"""
