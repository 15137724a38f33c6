"""One measurement a module, each read from the registered sheet."""
