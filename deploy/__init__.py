"""One command to start the server, one to test it, and the files of a production set-up.

`start` and `test` need only python3 and pip: `bootstrap.py` makes `.venv`, everything else here runs inside
it. No rule about dogs and no Django import belongs here; the only door to the project is the environment
(`environment.py`) and its management commands (`prepare.py`).
"""
