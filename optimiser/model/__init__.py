"""The records that everything else speaks in: frozen, typed, no files, no frames, no solver."""
