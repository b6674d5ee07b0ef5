package main

import (
	"context"
	"os"

	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
)

// openShop reaches the shop that the bay of a data folder has joined.
func openShop(data string) func(ctx context.Context) (courier.Shop, error) {
	return func(ctx context.Context) (courier.Shop, error) {
		joined, err := courier.ReadJoined(data)
		if err != nil {
			return nil, err
		}
		return shopAt(ctx, joined.URL)
	}
}

// shopAt reaches the shop at an address.
func shopAt(_ context.Context, address string) (courier.Shop, error) {
	shop, err := postgres.OpenBay(address)
	if err != nil {
		return nil, err
	}
	return shop, nil
}

// makeDataFolder makes the data folder for its owner alone.
func makeDataFolder(data string) error {
	if err := os.MkdirAll(data, 0o700); err != nil {
		return usage("--data: %v", err)
	}
	return nil
}
