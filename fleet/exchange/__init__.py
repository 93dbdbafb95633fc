"""Lists in and out (read, matched, shown, written in batches, undone), whole schools, and the whole site as a backup.

What a row means and how it is written stays with its slice; here is how it gets there. No record lives only here.

An import is `columns → checking → checked → writing → written` (or `undone`). Each request does one batch of 500 and
the page asks for the next; without script one request does as many as fit into eight seconds. Records changed since the
preview send the rest back to be looked over. A named constraint lets one list a school be written at a time. Only the
last import can be undone, and only as long as nothing it wrote was changed or used.

A cell that cannot be read is left empty, unless the row would then be about another. A room or class close to one that
is there is asked about before anything is written.

A horn's own words in a list are kept (`Horn.described_as`) and never count as identified. A loan of an older list is a
`PastLoan`: nobody signed it here; one that still runs is a `Loan` whose sheet is signed later. What a spreadsheet would
run goes out behind an apostrophe (OWASP ASVS 5.0, 1.2.10), which reading takes off again; a formula in a refused row
goes out as `(formula) …`.
"""
