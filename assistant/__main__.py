"""`python -m assistant` is `rodside`."""

import sys

from assistant.cli import main

sys.exit(main())
