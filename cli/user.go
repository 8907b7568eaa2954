package cli

import (
	"context"
	"fmt"
	"net/url"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// userVerb is one verb over the accounts of an instance.
type userVerb struct {
	place
	env func(string) string
}

func userCommand(env func(string) string) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "user",
		Short: "Accounts, roles, sign-in links and tokens, for whoever operates the machine",
		Long: `Works on a data folder or database directly and is logged as done by the operator
at the command line. People on the job do the same on the pages. A folder without
an instance is refused; "migrate" or "serve" makes one.`,
		Example: "  storeyrod user add maud --name \"Maud Example\"\n  storeyrod user role maud --site \"Quarry Court\" --role clerk",
	}
	return group(cmd, userAddCommand(env), userLinkCommand(env), userRoleCommand(env), userListCommand(env), userTokenCommand(env))
}

// run opens the instance for one change.
func (u *userVerb) run(cmd *cobra.Command, do func(ctx context.Context, reg *register.Register) error) (err error) {
	if err := u.known(); err != nil {
		return err
	}
	inst, err := u.open(cmd.Context(), time.Now, quiet(cmd.ErrOrStderr()))
	if err != nil {
		return err
	}
	defer inst.closing(&err)
	return do(cmd.Context(), inst.reg)
}

func userAddCommand(env func(string) string) *cobra.Command {
	u := userVerb{env: env}
	var n register.NewAccount
	var base string
	cmd := &cobra.Command{
		Use:     "add LOGIN",
		Short:   "Make an account and print a link by which its owner sets a password",
		Example: "  storeyrod user add maud --name \"Maud Example\" --base-url https://storeyrod.example",
		Args:    exactly(1, "one login"),
		RunE: func(cmd *cobra.Command, args []string) error {
			n.Login = args[0]
			if n.Name == "" {
				n.Name = args[0]
			}
			return u.run(cmd, func(ctx context.Context, reg *register.Register) error {
				acc, err := reg.CreateAccount(ctx, operator(), n)
				if err != nil {
					return err
				}
				fmt.Fprintf(cmd.OutOrStdout(), "account %s\n", acc.Login)
				return printLink(cmd, reg, acc.Login, base)
			})
		},
	}
	placeFlags(cmd, &u.place, env)
	cmd.Flags().StringVar(&n.Name, "name", "", "name as people know it")
	cmd.Flags().BoolVar(&n.Admin, "admin", false, "may make sites and accounts")
	baseFlag(cmd, &base)
	return cmd
}

func baseFlag(cmd *cobra.Command, base *string) {
	cmd.Flags().StringVar(base, "base-url", "http://"+defaultAddr, "address under which people reach the server; the printed link begins with it")
}

func printLink(cmd *cobra.Command, reg *register.Register, login, base string) error {
	secret, err := reg.CreateLink(cmd.Context(), operator(), login, register.LinkMost)
	if err != nil {
		return err
	}
	base = strings.TrimRight(base, "/")
	if !cmd.Flags().Changed("base-url") {
		fmt.Fprintf(cmd.ErrOrStderr(), "the link is for people who reach the server at %s; --base-url names another address\n", base)
	}
	_, err = fmt.Fprintf(cmd.OutOrStdout(), "link, once, within three days: %s/link?secret=%s\n", base, url.QueryEscape(secret))
	return err
}

func userLinkCommand(env func(string) string) *cobra.Command {
	u := userVerb{env: env}
	var base string
	cmd := &cobra.Command{
		Use:     "link LOGIN",
		Short:   "Print a one-time link to sign in and set a new password",
		Example: "  storeyrod user link maud",
		Args:    exactly(1, "one login"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return u.run(cmd, func(_ context.Context, reg *register.Register) error { return printLink(cmd, reg, args[0], base) })
		},
	}
	placeFlags(cmd, &u.place, env)
	baseFlag(cmd, &base)
	return cmd
}

func userRoleCommand(env func(string) string) *cobra.Command {
	u := userVerb{env: env}
	var site, role, gang string
	cmd := &cobra.Command{
		Use:   "role LOGIN",
		Short: "Give a person a role on a site, or take it away",
		Example: "  storeyrod user role maud --site \"Quarry Court\" --role installer --gang \"gang 1\"\n" +
			"  storeyrod user role maud --site \"Quarry Court\" --role none",
		Args: exactly(1, "one login"),
		RunE: func(cmd *cobra.Command, args []string) error {
			given := defects.Role(role)
			if role == "none" {
				given = ""
			} else if !given.Known() {
				return usagef("--role is none or one of %s", roleNames())
			}
			if site == "" {
				return usagef("--site says on which site")
			}
			return u.run(cmd, func(ctx context.Context, reg *register.Register) error {
				v, err := reg.FindSite(ctx, operator(), site)
				if err != nil {
					return err
				}
				if err := reg.SetRole(ctx, operator(), v.ID, args[0], given, gang); err != nil {
					return err
				}
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s on %s: %s\n", args[0], v.Name, role)
				return err
			})
		},
	}
	placeFlags(cmd, &u.place, env)
	cmd.Flags().StringVar(&site, "site", "", "id or name of the site")
	cmd.Flags().StringVar(&role, "role", "", "none, "+roleNames())
	cmd.Flags().StringVar(&gang, "gang", "", "gang, for installers and operatives")
	return cmd
}

func roleNames() string {
	var names []string
	for _, r := range defects.Roles() {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

func userListCommand(env func(string) string) *cobra.Command {
	u := userVerb{env: env}
	var site string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the accounts, or the people of one site with their roles",
		Example: "  storeyrod user list --site \"Quarry Court\"",
		Args:    none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return u.run(cmd, func(ctx context.Context, reg *register.Register) error {
				if site != "" {
					return listMembers(ctx, cmd, reg, site)
				}
				return listAccounts(ctx, cmd, reg)
			})
		},
	}
	placeFlags(cmd, &u.place, env)
	cmd.Flags().StringVar(&site, "site", "", "id or name of a site")
	return cmd
}

func listAccounts(ctx context.Context, cmd *cobra.Command, reg *register.Register) error {
	list, err := reg.Accounts(ctx, operator())
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "LOGIN\tNAME\tADMIN\tSTATE")
	for _, a := range list {
		admin, state := "", "active"
		if a.Admin {
			admin = "yes"
		}
		if a.Disabled {
			state = "disabled"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", a.Login, a.Name, admin, state)
	}
	return t.Flush()
}

func listMembers(ctx context.Context, cmd *cobra.Command, reg *register.Register, site string) error {
	v, err := reg.FindSite(ctx, operator(), site)
	if err != nil {
		return err
	}
	list, err := reg.Members(ctx, operator(), v.ID)
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "LOGIN\tNAME\tROLE\tGANG")
	for _, m := range list {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", m.Login, m.Name, m.Role, m.Gang)
	}
	return t.Flush()
}

func userTokenCommand(env func(string) string) *cobra.Command {
	u := userVerb{env: env}
	var label string
	var days int
	cmd := &cobra.Command{
		Use:     "token LOGIN",
		Short:   "Print a token by which a program acts for an account",
		Example: "  storeyrod user token maud --label \"office import\" --days 30",
		Args:    exactly(1, "one login"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if label == "" || days < 1 {
				return usagef("give --label and at least one day")
			}
			return u.run(cmd, func(ctx context.Context, reg *register.Register) error {
				secret, k, err := reg.CreateTokenFor(ctx, operator(), args[0], label, time.Duration(days)*24*time.Hour)
				if err != nil {
					return err
				}
				fmt.Fprintf(cmd.ErrOrStderr(), "good until %s; it is shown this once\n", k.ExpiresAt.Format(time.RFC3339))
				_, err = fmt.Fprintln(cmd.OutOrStdout(), secret)
				return err
			})
		},
	}
	placeFlags(cmd, &u.place, env)
	cmd.Flags().StringVar(&label, "label", "", "what the token is for")
	cmd.Flags().IntVar(&days, "days", 90, "how long it is good for")
	return cmd
}
