"""What nobody means well by: every field of every form of every role, requests that break the protocol, files that lie."""
