"""The program's thread without inertia, at shapes that the reference keeps and in runs of its own: what a change of a closure does, in seconds.

A port of `src/thread` and its closures to NumPy, for Newtonian liquids. It judges nothing; the page's rows are the program's own.
"""
