"""Scripts for people and for continuous integration; see README.md beside this file."""
