"""What goes out of the house: judged addresses, one request to one of them, signed. It knows nothing of the account."""
