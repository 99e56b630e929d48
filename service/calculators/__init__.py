"""Questions that need no database: what drop, what gauge, what fuse, how long on this pack.

form.py is the shape of every question and answer, tapes.py the tape and lead that several of them ask for;
each other module is one subject, and registry.py names them all for the API and the command line. Whoever
adds one writes a question, a function that works it out, and an entry there.
"""
