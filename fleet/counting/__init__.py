"""Counts of the shelf: the frozen list, what was seen, the differences and their reasons, the signature.

What becomes of a horn after a count is the register's; who has a horn is read from the horn's own row. Nothing of a
count is deleted, and pupils' names are not kept in it. `end` writes once a line what its horn's sightings and its row
amount to (`queries.outcomes`); until then it is computed. A horn lent meanwhile *went*, one that came back and was seen
is *seen*, one that came back and was not is looked for. A tap's key is unique in a count, so a lost answer costs
nothing; times are the server's clock less how long the phone says it waited. Rows of a signed count refuse to be saved;
only forgetting goes past that, to take a name out. Who tapped does not sign.
"""
