"""The bench: condition checks with their findings, faults that families report, repair jobs, parts and care.

It keeps a horn's playing grade and says whether it may be played, not who plays it. A grade is the worst finding of the
newest check, never an average. A repair that is done does not raise it: the check after the repair does. A fault known
before and left out of a check counts as gone.

A check is kept in the browser while it is typed, under one id (`ConditionCheck.sent_as`): sent again, the check that is
kept is the answer. One older than the newest moves nothing. `whole` is the form's last field: an upload cut off
half-way lacks it and is refused.

A head agrees to a sum, not to a job: `RepairJob.asked` is the quote or the cost that came to more, and what rises above
the agreed sum asks again, after the job is done too. A stale job form takes over what somebody else changed, field by
field, wherever its own person typed nothing.
"""
