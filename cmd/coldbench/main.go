// Command coldbench compares how electric cars behave in the cold: it turns a
// folder of uneven logs into figures, gates, standings and a ranked workbook.
package main

import (
	"os"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }
