"""The bill: invoices and credit notes as issued, payments, and numbers without a gap."""
