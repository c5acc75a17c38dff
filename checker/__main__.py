"""`python -m checker` is `prescreed`."""

import sys

from checker.cli import main

sys.exit(main())
