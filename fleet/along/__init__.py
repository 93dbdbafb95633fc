"""The cupboard taken along: what a phone keeps of it for where there is no connection, and how it is kept.

No tables. A phone keeps one page (`pages/along.py`, `cupboard`), which draws by itself (`offline.js`) from what is kept
beside it (`queries/kept.py`, the tables of `identify.core.along`), and a worker (`worker.js`), which gives that page
where the site cannot be reached. What is done there waits in the outbox like everything else that has to wait.
"""
