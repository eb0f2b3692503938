"""What each word of a rule means in time: one operator, one file, its step form and its columnar form side by side.

A step form is a *cell*. It holds what it must remember; ``update(now)`` is called when something below it changed or
its own time has come, and tells whether those above have to look. ``dump`` and ``load`` turn its memory into plain
values and back.
"""
