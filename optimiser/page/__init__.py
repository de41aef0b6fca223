"""The page: the report of a job, alive in a browser on this machine.

START HERE: ``application.application`` lists every address with what answers it. A tap goes through ``gate`` (who may
ask), ``forms`` (what was sent), ``taps`` (words into the record, by ``entries`` and the service), and comes back as a
redirect to what is next. ``live`` reads the job and makes the plan again in a thread of its own, so that a write never
waits for it. The pages are filled from the report's own sections; nothing here decides anything about a job.
"""
