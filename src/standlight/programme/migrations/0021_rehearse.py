from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0020_season'),
    ]

    operations = []
