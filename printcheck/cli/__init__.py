"""The command line: parse, call one function, print, exit. One command a file."""
