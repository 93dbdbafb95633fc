"""The record of acts: who changed what, when, from which page. It is only added to, and proves that it was.

An act is written by `record` inside its action's transaction, and sealed right after it: it gets its number, and a hash
over itself and the act before it. Whoever removes, changes or moves a row later breaks the chain, and `verify_record`
says where. What is personal hangs on the chain by a salted hash only, so that it can be taken out and the chain holds.
"""
