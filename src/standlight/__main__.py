"""``python -m standlight``: hands the words to the table of commands."""

import sys

from standlight.commands import main

sys.exit(main(sys.argv[1:]))
