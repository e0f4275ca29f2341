"""`python -m reelnotes` is the same as `reelnotes`."""

from reelnotes.cli import main

main()
