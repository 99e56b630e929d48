"""The one statement of the rules: each limit is one pure function on plain data.

To add a limit:

1. Choose its file in `rules/` by what it is about: `electrical`, `leads`, `fuses`, `boxes`, `mains`,
   `batteries`, `mounting`, `film`, `control`, `addresses`, `places` or `store`. Write a `Rule` there: code
   (public, never changes), title, number of the house rule, harm if it is ignored, kind of subject, source,
   caution.
2. Write the check under it: `(subject, around: Lookup) -> Finding | None`. None means *not
   applicable*. A blank that it needs gives `RULE.unknown(...)`, never ok. Equality is ok: use
   `compared`. Return ok findings too, with their figures.
3. Give the finding a mend with the figure it leads to; the search for it goes into `mends/`.
4. Put it into `LIMITS` in `registry.py` with the subjects it is asked of. Everything else reads that.
5. A threshold is a field of `Policy`, with its source. A fact it needs is a field of `facts.py`.
6. Test it over, exactly at the limit, with the blank, and where it does not apply. If the allocator
   must respect it, state it there as well; a property test compares the two.
"""
