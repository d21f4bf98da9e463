"""Parts of the benchmark of reading: speed and memory, general readers, the picture."""
