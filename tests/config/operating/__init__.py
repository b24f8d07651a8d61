"""The page for whoever runs a server, followed in a folder that stands for the whole machine."""
