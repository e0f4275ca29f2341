"""Reading log and speech for steps that can hurt a viewer or ruin a piece."""
