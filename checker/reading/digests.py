"""Digests without OpenSSL, which `hashlib` loads first and which takes half of Python's start.

The same functions, from the modules in which Python itself has them (its own `random` uses these);
from `hashlib` where a Python has them elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hashlib import blake2b, sha256
else:
    try:
        from _blake2 import blake2b

        try:
            from _sha2 import sha256
        except ImportError:  # Python before 3.12
            from _sha256 import sha256
    except ImportError:
        from hashlib import blake2b, sha256

__all__ = ["blake2b", "sha256"]
