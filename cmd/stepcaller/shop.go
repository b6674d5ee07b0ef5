package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator/journal/courier"
)

func newShop(app *App) *cobra.Command {
	c := &cobra.Command{
		Use:   "shop",
		Short: "Join several bays into a shop",
		Long: `A shop is a PostgreSQL server to which its bays send what they record, as soon as they reach it. No job waits for it: a bay whose cable is cut works
on, and sends later.`,
	}
	group(c)
	c.AddCommand(newShopJoin(app), newShopLeave(app), newShopCreate(), newShopBay(), newShopPagesRole(), newShopToken(), newShopPages(app))
	return c
}

func newShopJoin(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "join URL",
		Short: "Make this machine a bay of a shop",
		Long: `Join keeps the address in shop.json in the data folder, which its owner alone may read. With - the address is read from the input, so that its
password does not stand in the shell's history. A daemon that runs joins when it is started anew.`,
		Example: "  stepcaller shop join - < address.txt",
		Args:    oneArg("URL is needed: the address that `stepcaller shop bay` printed"),
		RunE: func(cmd *cobra.Command, args []string) error {
			address := args[0]
			if address == "-" {
				line, err := bufio.NewReader(cmd.InOrStdin()).ReadString('\n')
				if address = strings.TrimSpace(line); address == "" {
					return usage("no address on the input: %v", err)
				}
			}
			bay, shop, err := knock(cmd.Context(), address)
			if err != nil {
				return usage("the shop does not let this bay in: %v; nothing was changed", err)
			}
			if err := makeDataFolder(app.Config.Data); err != nil {
				return err
			}
			if _, err := courier.Join(app.Config.Data, address); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "This is bay %s of shop %s. All that was recorded here is sent from the next start of `stepcaller listen` on.\n", bay, shop)
			return nil
		},
	}
}

// knock asks a shop which bay an address is of.
func knock(ctx context.Context, address string) (bay, shop string, err error) {
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	s, err := shopAt(ctx, address)
	if err != nil {
		return "", "", err
	}
	bay, shop, err = s.Bay(ctx)
	return bay, shop, errors.Join(err, s.Close())
}

func newShopLeave(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "leave",
		Short: "Make this machine a bay on its own again",
		Long:  `Leave forgets the shop's address. What was sent stays there; the journal stays here.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if _, err := courier.ReadJoined(app.Config.Data); errors.Is(err, courier.ErrNotJoined) {
				return usage("%v", errNoShop)
			}
			if err := courier.Leave(app.Config.Data); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "The shop is left. A daemon that runs leaves it when it is started anew.")
			return nil
		},
	}
}
