"""Invented jobs and pressure records from models of their own, which share nothing with `checker/`.

What judges a model may not be made by it: nothing in this folder imports `checker`, and no method is
the same. A floor is solved by finite differences on its section (`floor`), pipes, pump and rooms by
a network and a balance in time (`house`), closed pipes by their volumes (`vessel`).
"""
