// Storeyrod is the photo and measurement defect tracker for external wall
// insulation with a brick-slip or render finish. Package cli is the program.
package main

import (
	"os"

	"storeyrod/cli"
)

func main() {
	os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv))
}
