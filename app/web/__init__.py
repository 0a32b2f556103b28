"""The HTTP shell: pages, actions, API, live stream. It reads input, calls the service and renders."""
