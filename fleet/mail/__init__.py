"""What leaves by mail: the one way to the mail server, and the queue of what no school answers for.

Codes, alarms and tellings are written into the queue in the transaction of what they tell of, and go a moment later, by
a thread of the process that queued them, by `serve`, or by `manage.py send_mail`. No page waits for a mail server.
Letters to guardians have their own rows in `letters`, and go through the same `Server`.
"""
