"""Past jobs: what was designed, installed and measured, what causes a complaint, and which jobs may
have the same fault.

`auditing` puts one audit together (`records`), which `text` and `html` write. It reads a job's
folder (`jobs`, `papers`, `readings`) and takes each loop as a function of its water
(`loop_models`): `on_site` puts readings beside that model, `inference` solves it backwards, and
`joint` fits all readings at once, so that what all loops share is separated from what is one
loop's. `signs` says how strongly each sign is seen (`observing`, `degrees`), `ranking` orders the
causes by them, `summary` puts that in words, `following` says what to measure next, and `siblings`
finds other jobs with the same cause by their `profiles`. `visit` is the form of a visit, whose
answers are readings.
"""
