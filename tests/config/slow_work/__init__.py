"""A kind of work that counts to a number slowly, notes each beginning in a file, and can be deaf to the clock."""
