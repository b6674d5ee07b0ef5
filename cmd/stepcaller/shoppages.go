package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/pages"
	"stepcaller/procedures/tongue"
)

// pagesVariable names the environment's address of a shop's pages.
const pagesVariable = "STEPCALLER_SHOP_PAGES"

func newShopToken() *cobra.Command {
	var a administering
	var revoke bool
	c := &cobra.Command{
		Use:   "token TECHNICIAN",
		Short: "Issue the token that opens a technician's own figures, and print it",
		Long: `Token prints a new token, which is kept nowhere: give it to that technician and to nobody else. One issued before opens nothing any more. With --revoke
there is none.`,
		Example: "  stepcaller shop token Ines --shop hollow-lane",
		Args:    oneArg("TECHNICIAN is needed: whose token"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkName("--shop", a.shop); err != nil {
				return err
			}
			return a.do(cmd.Context(), func(admin *postgres.Admin) error {
				if revoke {
					return admin.RevokeToken(cmd.Context(), a.shop, args[0])
				}
				return printAddress(cmd)(admin.IssueToken(cmd.Context(), a.shop, args[0]))
			})
		},
	}
	a.flags(c, true)
	c.Flags().BoolVar(&revoke, "revoke", false, "take the token away")
	return c
}

func newShopPages(app *App) *cobra.Command {
	var address, cache string
	c := &cobra.Command{
		Use:   "pages [SHOP]",
		Short: "Serve the pages on all bays of a shop",
		Long: `Pages serves the review pages over all that the bays of a shop have sent, to this machine's own browser, until ended with Ctrl-C or SIGTERM. They only
read: what is written about a job is written at the bay that has it. SHOP is needed where the address leads to several.`,
		Example: "  STEPCALLER_SHOP_PAGES=$(cat pages.txt) stepcaller shop pages\n  stepcaller shop pages mill --pages 127.0.0.1:8080",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if address == "" {
				address = os.Getenv(pagesVariable)
			}
			if address == "" {
				return usage("--address is needed, or %s in the environment: what `stepcaller shop pages-role` printed", pagesVariable)
			}
			name := ""
			if len(args) == 1 {
				name = args[0]
			}
			c := app.Config
			if c.Pages == pagesOff {
				c.Pages = defaultConfig().Pages
			}
			stop, err := serveOn(cmd.Context(), c, cmd.OutOrStdout(), func() (pages.Config, func() error, error) {
				return openShopPages(cmd.Context(), c, address, name, cache)
			})
			if err != nil {
				return err
			}
			defer stop()
			<-cmd.Context().Done()
			return nil
		},
	}
	c.Flags().StringVar(&address, "address", "", "address of a login that reads the shop (default: the environment's "+pagesVariable+")")
	c.Flags().StringVar(&cache, "cache", "", "folder for figures worked out once (default: one of the user's cache folder)")
	return c
}

// openShopPages opens a shop to be read, and begins to work its finished jobs into their figures. These are a cache: one folder a shop.
func openShopPages(ctx context.Context, c Config, address, name, cache string) (_ pages.Config, closing func() error, err error) {
	t, err := tongue.Named(c.Language)
	if err != nil {
		return pages.Config{}, nil, err
	}
	shop, err := postgres.OpenShop(address, name)
	if err != nil {
		return pages.Config{}, nil, err
	}
	fail := func(err error) (pages.Config, func() error, error) {
		return pages.Config{}, nil, errors.Join(err, shop.Close())
	}
	if name, err = shop.Name(ctx); err != nil {
		return fail(err)
	}
	if cache == "" {
		cache = filepath.Join(xdg("XDG_CACHE_HOME", ".cache"), "stepcaller", "shop-"+name)
	}
	if err := os.MkdirAll(cache, 0o700); err != nil {
		return fail(usage("--cache: %v", err))
	}
	figures, err := archive.Open(cache, shop)
	if err != nil {
		return fail(err)
	}
	_ = figures.CatchUp(ctx) // what fails here fails again for the page that is asked for, and is told there
	return pages.Config{Store: shop, Data: cache, Tongue: t, Shop: name, Archive: figures, Memo: shop.Memo, CheckToken: shop.CheckToken,
			SideStories: func(ctx context.Context, job string) ([]pages.SideStory, error) { return sideStories(ctx, shop, job) }},
		func() error { return errors.Join(figures.Close(), shop.Close()) }, nil
}

// sideStories sums up what other bays told of a job beside its own story.
func sideStories(ctx context.Context, shop *postgres.Shop, job string) ([]pages.SideStory, error) {
	stories, err := shop.Stories(ctx, job)
	if err != nil || len(stories) == 0 {
		return nil, err
	}
	main, err := shop.Log(ctx, job)
	if err != nil {
		return nil, err
	}
	var all []pages.SideStory
	for _, s := range stories {
		whole := append(append([]narrator.Event{}, main[:s.After]...), s.Events...)
		j, err := narrator.NewJob(whole)
		if err != nil {
			return nil, fmt.Errorf("the story of bay %s: %w", s.Bay, err)
		}
		all = append(all, pages.SideStoryOf(s.Bay, j, s.After))
	}
	return all, nil
}
