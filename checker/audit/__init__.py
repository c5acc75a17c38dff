"""Past jobs: what was designed, installed and measured, what causes a complaint, and which jobs may
have the same fault.
"""
