"""What people see: pages and their forms. Each form does one operation of the API, read by the API's own schema."""
