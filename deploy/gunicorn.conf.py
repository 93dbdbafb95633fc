"""How gunicorn serves a site of many schools: `.venv/bin/gunicorn --config deploy/gunicorn.conf.py`."""

import os

wsgi_app = "fleet.wsgi"
bind = "127.0.0.1:8001"
workers = max(2, os.cpu_count() or 2)
# A photograph over a slow telephone holds a thread, not the worker: with one thread each, as many slow uploads as there
# are workers stop the site for everybody.
threads = 8
# A worker that is told to stop ends what it has begun first.
graceful_timeout = 60
# Only the proxy on this machine may say who asks and by what.
forwarded_allow_ips = "127.0.0.1"
# Nobody gives it orders while it runs, and two sites on one machine would make the socket for them at one place.
control_socket_disable = True
