"""Published ways of telling that it has been quiet for too long, written from their formulas, to compare with.

They are judged on a record and shown beside what was learned, and nothing more: what they give are instants of the
past, never a table of limits, so that none of them can get into a plan.
"""
