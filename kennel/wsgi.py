"""The web server's door: `granian --interface wsgi kennel.wsgi:application`."""

import gc
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kennel.settings")
application = get_wsgi_application()

# The loaded program is never garbage: looking through it again costs a request 70 ms each time.  Requests leave
# little in cycles, so the young are looked through less often.
gc.collect()
gc.freeze()
gc.set_threshold(20_000, 50, 100)
