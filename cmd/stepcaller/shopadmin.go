package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
)

// adminVariable names the environment's address of the database's administrator, so that its password does not stand in the shell's history.
const adminVariable = "STEPCALLER_SHOP_ADMIN"

// administering is what the commands of a shop's administrator have in common.
type administering struct {
	admin string
	shop  string
}

func (a *administering) flags(c *cobra.Command, ofShop bool) {
	c.Flags().StringVar(&a.admin, "admin", "", "address of the database's administrator (default: the environment's "+adminVariable+")")
	if ofShop {
		c.Flags().StringVar(&a.shop, "shop", "", "name of the shop")
	}
}

// address is where the administrator reaches the database.
func (a *administering) address() (string, error) {
	if a.admin == "" {
		a.admin = os.Getenv(adminVariable)
	}
	if a.admin == "" {
		return "", usage("--admin ADDRESS is needed, or %s in the environment, such as postgres://postgres@/stepcaller?host=/run/postgresql", adminVariable)
	}
	return a.admin, nil
}

// do lets the administrator act on the database.
func (a *administering) do(ctx context.Context, deed func(*postgres.Admin) error) error {
	address, err := a.address()
	if err != nil {
		return err
	}
	admin, err := postgres.OpenAdmin(ctx, address)
	if err != nil {
		return err
	}
	return errors.Join(deed(admin), admin.Close(context.WithoutCancel(ctx)))
}

func checkName(what, name string) error {
	if !courier.ValidBay(name) {
		return usage("%s %q: a name has at most 24 small letters, digits and dashes", what, name)
	}
	return nil
}

func newShopCreate() *cobra.Command {
	var a administering
	c := &cobra.Command{
		Use:     "create NAME",
		Short:   "Make a database ready, and a shop in it",
		Long:    "Create brings the tables of an empty PostgreSQL database to this program's version, or leaves them where they are, and adds a shop. It takes its administrator.",
		Example: "  stepcaller shop create hollow-lane --admin 'postgres://postgres@/stepcaller?host=/run/postgresql'",
		Args:    oneArg("NAME is needed: what the shop is called"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkName("shop", args[0]); err != nil {
				return err
			}
			address, err := a.address()
			if err != nil {
				return err
			}
			if err := postgres.Migrate(cmd.Context(), address); err != nil {
				return err
			}
			if err := a.do(cmd.Context(), func(admin *postgres.Admin) error { return admin.CreateShop(cmd.Context(), args[0]) }); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "Shop %s is there. `stepcaller shop bay NAME --shop %s` adds its bays.\n", args[0], args[0])
			return nil
		},
	}
	a.flags(c, false)
	return c
}

func newShopBay() *cobra.Command {
	var a administering
	var revoke bool
	c := &cobra.Command{
		Use:   "bay NAME",
		Short: "Add a bay to a shop, and print the address that it joins with",
		Long: `Bay gives a bay a login role of its own and prints its address with the password, which is nowhere else: keep it as you would a key. With --revoke the
role is taken away at once; what the bay sent stays.`,
		Example: "  stepcaller shop bay lift-2 --shop hollow-lane > lift-2.txt\n  stepcaller shop bay lift-2 --shop hollow-lane --revoke",
		Args:    oneArg("NAME is needed: what the bay is called"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := errors.Join(checkName("bay", args[0]), checkName("--shop", a.shop)); err != nil {
				return usage("%v", err)
			}
			return a.do(cmd.Context(), func(admin *postgres.Admin) error {
				if revoke {
					return admin.RevokeBay(cmd.Context(), a.shop, args[0])
				}
				return printAddress(cmd)(admin.AddBay(cmd.Context(), a.shop, args[0]))
			})
		},
	}
	a.flags(c, true)
	c.Flags().BoolVar(&revoke, "revoke", false, "take the bay's role away")
	return c
}

func newShopPagesRole() *cobra.Command {
	var a administering
	var shops []string
	var owner bool
	c := &cobra.Command{
		Use:     "pages-role",
		Short:   "Add a login that reads shops, for their pages, and print its address",
		Example: "  stepcaller shop pages-role --shops hollow-lane > pages.txt\n  stepcaller shop pages-role --shops hollow-lane,mill --owner",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if len(shops) == 0 {
				return usage("--shops NAME,... is needed: the shops to read")
			}
			for _, s := range shops {
				if err := checkName("--shops", s); err != nil {
					return err
				}
			}
			return a.do(cmd.Context(), func(admin *postgres.Admin) error {
				if owner {
					return printAddress(cmd)(admin.AddOwner(cmd.Context(), shops...))
				}
				return printAddress(cmd)(admin.AddPages(cmd.Context(), shops...))
			})
		},
	}
	a.flags(c, false)
	c.Flags().StringSliceVar(&shops, "shops", nil, "names of the shops that it reads")
	c.Flags().BoolVar(&owner, "owner", false, "for the owner of the shops")
	return c
}

// printAddress prints the address of a new login.
func printAddress(cmd *cobra.Command) func(address string, err error) error {
	return func(address string, err error) error {
		if err == nil {
			_, err = fmt.Fprintln(cmd.OutOrStdout(), address)
		}
		return err
	}
}
