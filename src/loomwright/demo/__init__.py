"""The demonstration depot's data: Skerry Point, an invented island council's workshop."""
